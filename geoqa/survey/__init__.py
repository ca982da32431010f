"""From shots to points: occupations and their mean, what the survey says of itself, known marks."""
