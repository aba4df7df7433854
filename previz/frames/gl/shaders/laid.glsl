#ifdef SURFACE
// What a file says of a surface goes on to every pixel: its colour, the light on it, its own, and how pictures lie.
out vec3 base;
out vec4 light_on;
out vec3 own;
#ifdef LAID
layout(location = 5) in vec4 uv;
uniform float most_bias;
out vec4 laid;
out float image_bias;
#endif
#endif
