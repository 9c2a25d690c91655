"""Lists of a key system or a place: asked for with a reason, numbered, registered, made by a job."""
