"""What is known of an airplane: geometry, loading, limits, configurations, drag, lift and propulsion."""
