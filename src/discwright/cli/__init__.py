"""The acts as words on a command line (Typer, rich)."""
