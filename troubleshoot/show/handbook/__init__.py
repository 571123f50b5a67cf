"""The rule base as a folder of linked pages that need no server and no script."""
