"""Paper and files to take along: printed sheets, forms, calendar, exports, letters."""
