"""Advice: sizing a new truck, and diagnosing a sick one, by calling studies and checks."""
