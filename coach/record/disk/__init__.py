"""The record on disk: the file, its journal, its backups, and what may be wrong with them."""
