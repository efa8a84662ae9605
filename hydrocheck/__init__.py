"""Size, check, commission and diagnose the hydraulic circuits of winter-maintenance trucks.

Importing this package loads nothing else; import the layer you need, such as
`hydrocheck.physics` or `hydrocheck.model`.
"""

__version__ = "0.1.0"
