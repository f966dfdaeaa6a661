"""Rates and expo: what a stick's movement becomes, in every position of the switches."""
