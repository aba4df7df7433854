#version 330 core
// Shadow and beam on ground that is drawn already: what is there is multiplied by what is seen here.
in vec2 image_uv;
#include "ground_share.glsl"
#include "blur.glsl"
layout(location = 0) out vec4 seen;
void main() { seen = vec4(share_of_light(), blur()); }
