"""What made the delivered files, and when and how that was recorded; from the book alone."""
