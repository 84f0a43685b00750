"""Findings -> things people read: tables, charts, pages and papers. No arithmetic on physics."""
