"""The circuit and the truck as frozen dataclasses in SI, and the truck file that describes them."""

from hydrocheck.model.circuit import Circuit
from hydrocheck.model.reader import read_truck, truck_from_text
from hydrocheck.model.truck import Truck

__all__ = ["Circuit", "Truck", "read_truck", "truck_from_text"]
