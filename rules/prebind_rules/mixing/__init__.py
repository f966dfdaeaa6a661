"""Do the mixes of transmitter and receiver do one job each, the right way round?"""
