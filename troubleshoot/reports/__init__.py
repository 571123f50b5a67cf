"""The HTML report and the printed forms."""
