"""Spares: demand of each part, stock, orders, budget."""
