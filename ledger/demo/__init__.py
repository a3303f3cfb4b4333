"""A made-up job, so that everything can be tried in a minute. Every name and number is invented.

The geoids are not real; the real-world position is only there so that coordinate arithmetic works.
"""
