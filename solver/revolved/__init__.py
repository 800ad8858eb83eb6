"""Parts of revolution in their half-plane: fields that vary once about the axis, bare rims."""
