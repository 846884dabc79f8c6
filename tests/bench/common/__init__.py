"""What `lumber` and `sheets` share: the command, rows and their page, charts, models run apart."""
