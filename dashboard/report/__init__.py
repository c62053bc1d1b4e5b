"""The month as files: one page that needs nothing beside it, and one workbook."""
