#version 330 core
// An image decoded to linear light once, which costs less than decoding it at every look.
uniform sampler2D image;
out vec4 seen;
void main() { seen = texelFetch(image, ivec2(gl_FragCoord.xy), 0); }
