"""Checks of surveyed points against the cloud; they need points and a declared table.

One pass of the points gives one residual a surveyed point (`residuals`), which every check here
reads. `sample` says which of them count; `error_statistics` and `published_rules` are numbers and
rules without a cloud, held against published examples. What is said of accuracy, and on what, is
decided in docs/decisions/0017.
"""
