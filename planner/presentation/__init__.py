"""Domain results turned into tables, charts, a map, a report page, a calendar and exports."""
