"""Frozen records without input or output: the words that all layers above share."""
