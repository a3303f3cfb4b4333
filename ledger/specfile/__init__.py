"""The specification file `job.toml`: read strictly, every fault at once, each with its line."""
