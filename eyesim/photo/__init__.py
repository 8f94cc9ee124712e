"""A practice eye in a photograph: the camera, edges, points, and what is measured from in front and from the side."""
