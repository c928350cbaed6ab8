"""What a passage and a boat are described by: frozen, validated inputs."""
