"""An inspection as one self-contained HTML page, to be read on screen, on paper and by screen readers."""
