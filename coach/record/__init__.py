"""What has been done: the events of every batch, kept on disk, and what follows from them."""
