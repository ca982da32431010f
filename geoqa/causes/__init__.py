"""One comparison of all causes that could explain what is systematic in the residuals.

`hypothesis` says what a cause does to the residuals, `evidence` holds them, `fitting` fits a set of causes
together, `power` says what so few points can see, `comparison` chooses the set, `prediction` says what is
left after a cure; `frame_vectors` and `places` bring what is known of frames.
"""
