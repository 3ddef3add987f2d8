"""All that is drawn: pictures, charts, pages, the overlay video."""
