"""One-page sheets for the wall, laid out once and written as SVG or PDF."""
