"""Read-only questions for pages, commands and exports."""
