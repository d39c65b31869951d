"""One Typer command per file: parse, call, show; no computation."""
