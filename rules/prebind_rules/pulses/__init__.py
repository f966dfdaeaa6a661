"""Do the receiver's pulses suit the servos?"""
