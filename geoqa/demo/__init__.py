"""An invented site with known truth, and the renderer of target pictures."""
