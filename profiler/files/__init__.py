"""Files that people keep: sheets, tables, profiles."""
