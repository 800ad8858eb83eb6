"""What meshes are made of: charts, cells, ports in space, the gmsh session."""
