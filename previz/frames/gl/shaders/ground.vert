#version 330 core
// The table top, its radiance baked into an image, and the vehicle's moving shadow.
layout(location = 0) in vec3 position;
layout(location = 1) in vec3 normal;
layout(location = 5) in vec2 uv;
#include "views.glsl"
#include "footprint.glsl"
#include "streak.glsl"
uniform float most_bias;
out vec2 image_uv;
out float image_bias;
#ifdef PATCH
uniform vec4 patch_place;              // shadow patch on the ground below the vehicle: x0, y1, 1/width, 1/depth
out vec2 patch_uv;
#endif
void main() {
    image_uv = uv;
    image_bias = footprint_bias(position, normal, VIEW(eye), most_bias) + VIEW(detail);
#ifdef PATCH
    vec2 local = (VIEW(ground_from_world) * vec4(position, 1.0)).xy;
    patch_uv = vec2(local.x - patch_place.x, patch_place.y - local.y) * patch_place.zw;
#endif
#ifdef MOVING
    set_streak(vec4(position, 1.0), vec4(position, 1.0));
#endif
    CHOOSE_LAYER;
    gl_Position = VIEW(clip_from_world) * vec4(position, 1.0);
}
