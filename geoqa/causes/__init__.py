"""One comparison of all causes that could explain what is systematic in the residuals.

`hypothesis` says what a cause does to the residuals, `evidence` holds them, `prepared` and `fitting` fit a
set of causes together, `power` says what so few points can see, `comparison` chooses the set, `finding` puts
it into words, `prediction` says what is left after a cure, `decision` and `cures` what to do;
`frame_vectors`, `coarse_geoid` and `places` bring what is known of the Earth.
"""
