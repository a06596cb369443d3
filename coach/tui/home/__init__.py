"""Where a batch is opened or begun."""
