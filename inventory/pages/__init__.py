"""One module per screen; its table, form, filter and view stand together."""
