"""Running rules on a document: which ones, each guarded, and what came of it."""
