"""Write an inspection as one self-contained HTML page, for screens, paper and screen readers."""
