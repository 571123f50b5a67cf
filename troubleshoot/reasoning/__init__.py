"""Rules, belief, planning and explanation: pure functions."""
