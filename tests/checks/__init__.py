"""One test module per check. The check is silent on a healthy shot, and each test then breaks one thing."""
