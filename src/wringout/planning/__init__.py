"""Planning a flight that can decide a question: limits guard, hazards, loading, proposals, the chance to decide."""
