"""Pictures of tables: all are drawn as a `Drawing`, which becomes SVG or goes into a PDF."""
