"""Tables of surveyed points as people have them: what was understood, never guessed in silence.

`rows` takes the text apart, `columns` says which column is what, `declared` what comment lines say,
`points` makes points of it, `facts` is the short of it for who only registers the file. Light: no
library beyond the standard one.
"""
