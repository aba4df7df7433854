#version 330 core
// A glowing ball drawn as a disc that faces the eye, never smaller than a pixel but always of the same power:
// a disc that falls between pixels would flicker from view to view.
layout(location = 0) in vec3 position;  // middle, world
layout(location = 1) in vec3 normal;    // beam axis, or zero: shines all round
layout(location = 2) in vec4 colour;    // radiance, true radius
layout(location = 5) in vec2 uv;        // corner, -1..1
uniform mat4 clip_from_world;
uniform vec3 eye;
uniform vec3 right;
uniform vec3 up;
uniform vec3 backward;
uniform float pixel_at_one_metre;
uniform mat4 world_from_lamp;
out vec3 radiance;
out vec2 corner;
void main() {
    vec3 middle = (world_from_lamp * vec4(position, 1.0)).xyz;
    vec3 to_eye = eye - middle;
    float distance = dot(to_eye, backward);
    float radius = max(colour.a, 0.75 * pixel_at_one_metre * distance);
    float shrink = colour.a / radius;
    radiance = colour.rgb * shrink * shrink;
    if (dot(normal, normal) > 0.0) {
        radiance *= pow(max(dot(normalize(mat3(world_from_lamp) * normal), normalize(to_eye)), 0.0), BEAM_EXPONENT);
    }
    corner = uv;
    // Towards the eye by its radius, so that the lens it sits in does not hide it.
    vec3 place = middle + (uv.x * right + uv.y * up) * radius + normalize(to_eye) * colour.a * 1.5;
    gl_Position = clip_from_world * vec4(place, 1.0);
}
