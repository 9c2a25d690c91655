"""Building models in IFC (ISO 16739), read by an optional library."""
