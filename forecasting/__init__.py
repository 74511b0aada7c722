"""From build history to reorder points; pure: tables in, tables out, no Django."""
