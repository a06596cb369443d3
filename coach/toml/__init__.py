"""TOML files, read so that a person hears of every mistake at once."""
