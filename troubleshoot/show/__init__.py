"""What is shown: terminal, pages, files."""
