"""Rough physical screens of a place: they rank places and raise questions; they clear nothing.

Every function says which numbers are derived, published or only remembered. Nothing here decides
about pressure safety: that is the rating sheet's and the maker's.
"""
