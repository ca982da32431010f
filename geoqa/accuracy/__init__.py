"""Residuals, their statistics, and what they prove."""
