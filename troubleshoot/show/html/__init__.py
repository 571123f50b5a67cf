"""Report, service sheet and forms as HTML."""
