"""COBie workbooks: the hand-over of a building as sheets (NBIMS-US; BS 1192-4), of which doors are a part."""
