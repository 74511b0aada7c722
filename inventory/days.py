"""A day as people write it."""

from datetime import date


def show_day(day: date | None) -> str:
    """3 Nov 2025, or nothing."""
    return f"{day.day} {day:%b %Y}" if day else ""
