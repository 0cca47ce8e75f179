"""What stands on the sheet, as plain records."""
