"""Results as words, tables, JSON, figures, pages and PDF."""
