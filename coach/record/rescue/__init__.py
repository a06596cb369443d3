"""What is left of a damaged record, put together anew."""
