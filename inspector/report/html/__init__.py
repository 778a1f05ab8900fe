"""Write an inspection as one self-contained HTML page, to be read on a screen, on paper and with screen readers."""
