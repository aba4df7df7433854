#version 330 core
in vec2 image_uv;
in float image_bias;
uniform sampler2D image;               // radiance, in shares of sensor saturation
#ifdef PATCH
#include "ground_share.glsl"
#endif
#ifdef FILM
#include "water.glsl"
#endif
#include "blur.glsl"
layout(location = 0) out vec4 seen;
void main() {
    vec4 texel = texture(image, image_uv, image_bias);
    vec3 light_out = texel.rgb;
#ifdef PATCH
    light_out = min(light_out * share_of_light(), vec3(60000.0));
#endif
#ifdef FILM
    light_out = gleaming(light_out, texel.a);
#endif
    seen = vec4(light_out, blur());
#ifdef SURVEY
    seen = surveyed(seen);
#endif
}
