"""The rule base as typed objects: schema, loading, checking."""
