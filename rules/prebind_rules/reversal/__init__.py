"""Does every control, and every correction, turn the model the way it should?"""
