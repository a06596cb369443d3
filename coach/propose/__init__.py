"""Better layouts: marks fitted to the fence's scale, and families of drawers that share their fence settings."""
