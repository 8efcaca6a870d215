"""The flight-test methods: each one's reduction against decelerations, stalls and timings computed in other words."""
