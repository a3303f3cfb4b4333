"""Which known mistake makes a constant or a pattern in the residuals: predicted, then compared.

`predict*` turns what the job says of itself into candidates, each with the residuals that it would
leave; `diagnosis` compares them with the residuals that are there. Both are pure: what has to be
read or transformed is gathered before, in `gather*`.
"""
