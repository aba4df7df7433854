"""Physics as pure functions: will this shot work, and by how much not."""
