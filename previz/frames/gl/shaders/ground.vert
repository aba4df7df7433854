#version 330 core
// The table top: painted reflectance times the light map, and the vehicle's moving shadow.
layout(location = 0) in vec3 position;
layout(location = 5) in vec2 uv;
uniform mat4 clip_from_world;
uniform mat4 vehicle_from_world;
uniform vec4 patch_place;              // shadow patch in the vehicle's frame: x0, y1, 1/width, 1/depth
out vec2 image_uv;
out vec2 patch_uv;
void main() {
    image_uv = uv;
    vec2 local = (vehicle_from_world * vec4(position, 1.0)).xy;
    patch_uv = vec2(local.x - patch_place.x, patch_place.y - local.y) * patch_place.zw;
    gl_Position = clip_from_world * vec4(position, 1.0);
}
