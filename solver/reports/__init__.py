"""Pages, and the folders of files that hold them."""
